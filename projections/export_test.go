package projections

// Crowded is a desk with no room, which every Tidy clears.
func (d *Desk) Crowded() *Desk {
	d.room = 0
	return d
}

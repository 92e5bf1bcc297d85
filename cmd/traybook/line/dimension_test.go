package line

// Name is the trade's word for the dimension, as it stands in errors.
func (d Dimension) Name() string { return d.rule().name }

// Write shows how a value of the dimension is typed.
func (d Dimension) Write() string { return d.rule().write }

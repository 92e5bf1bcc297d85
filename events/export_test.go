package events

// Limits are the bounds of a number, as operators and values.
func (f Field) Limits() map[string]float64 {
	out := map[string]float64{}
	for _, b := range f.bounds {
		out[b.op] = b.limit
	}
	return out
}

// GoType is the name of the Go type of the data of kind k.
func GoType(k Kind) string { return typeOf[k].Name() }

// StreamsOf are the things that an entry of kind k may belong to, the first that is named coming first.
func StreamsOf(k Kind) []string {
	var out []string
	for _, f := range placings[k]().streams {
		switch {
		case f.Name == "":
			out = append(out, string(Book))
		default:
			out = append(out, f.Name)
		}
	}
	return out
}

// Forms are the patterns of what is written in a form of its own, by the type of its field.
var Forms = map[string]string{
	"name": rankedForm().String(), "picture": pictureForm().String(), "sheet": sheetForm().String(), "sitter": sitterForm().String(),
	"currency": currencyForm().String(), "date": dateForm().String(), "dilution": dilutionForm().String(), "time": timeForm().String(),
	"entry": "^[0-9a-f]{32}$", "hex32": "^[0-9a-f]{32}$", "hex64": "^[0-9a-f]{64}$",
}

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
	"name": `^[a-z0-9][a-z0-9._-]{0,39}(@[0-9]{1,3})?$`, "picture": `^[0-9]{4}-[0-9]{3,9}(@[0-9]{1,3})?$`,
	"sheet": `^([0-9]{4}-[0-9]{3,9})(n|p[1-9][0-9]{0,5})(@[0-9]{1,3})?$`, "sitter": sitterForm().String(),
	"currency": currencyForm().String(), "date": dateForm().String(), "dilution": dilutionForm().String(),
	"time":  `^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?(Z|[+-][0-9]{2}:[0-9]{2})$`,
	"entry": "^[0-9a-f]{32}$", "hex32": "^[0-9a-f]{32}$", "hex64": "^[0-9a-f]{64}$",
}

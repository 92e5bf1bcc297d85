package export

import (
	"regexp"
	"strings"
	"sync"

	"traybook/events"
	"traybook/export/bag"
	"traybook/export/sheetcsv"
)

// Owner is whose book it is, with what was said of how to reach them and of their rights. What was not said is empty.
type Owner struct {
	events.BookOpenedData
	Entry events.ID // the opening that says so
}

// OwnerOf reads the first opening that is signed, else the first.
func OwnerOf(src Source) (Owner, error) {
	t, ok, err := src.Entity(events.BookEntity)
	if err != nil || !ok {
		return Owner{}, err
	}
	entries, err := src.Entries(events.Query{Stream: t.ID, Kinds: []events.Kind{events.BookOpened}})
	if err != nil {
		return Owner{}, err
	}
	var first Owner
	for _, e := range events.Fold(entries) {
		x, ok := e.Data.(*events.BookOpenedData)
		if ok && x.Owner != "" {
			return Owner{*x, e.ID}, nil
		}
		if ok && first.Entry.IsZero() {
			first = Owner{*x, e.ID}
		}
	}
	return first, nil
}

// The ways in which an owner may be reached.
const (
	byMail    = "mail"
	byPhone   = "phone"
	byAddress = "address"
)

var phone = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^\+?[0-9][0-9 ()/.-]{4,30}$`) })

// reachedBy tells of which sort a contact is. What is neither an address of mail nor a number is where to write to.
func reachedBy(contact string) string {
	switch {
	case strings.Contains(contact, "@") && !strings.ContainsAny(contact, " \n"):
		return byMail
	case phone().MatchString(contact):
		return byPhone
	}
	return byAddress
}

// ownerLabels are the labels of bag-info.txt (RFC 8493, section 2.2.2) that tell whose bag it is; Rights is our own.
func ownerLabels(o Owner) []bag.Label {
	var out []bag.Label
	add := func(name, value string) {
		if value != "" {
			out = append(out, bag.Label{Name: name, Value: sheetcsv.Visible(value)})
		}
	}
	add("Source-Organization", o.Owner)
	add("Contact-Name", o.Owner)
	if o.Contact != "" {
		add(map[string]string{byMail: "Contact-Email", byPhone: "Contact-Phone", byAddress: "Organization-Address"}[reachedBy(o.Contact)], o.Contact)
	}
	add("Rights", o.Rights)
	return out
}

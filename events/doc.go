// Package events says what can happen to a sheet of paper and writes it down for ever.
//
// An entry is one act or fact: a kind, the time it began, the zone of the place, and the data of its kind. Its
// stored bytes are one JSON object in a fixed order of keys; SHA-256 over them and over the hash of the entry
// before makes the chain. A kind once released stays readable for ever: its shape changes only by a new version
// and a step in lift.go that raises the old shape to the new.
//
// The package knows no SQL, no clock and no meaning: where entries are kept is the business of events/sqlite,
// what they add up to that of projections.
package events

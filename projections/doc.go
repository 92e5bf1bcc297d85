// Package projections says what the entries of a book mean: pictures and their sheets, boxes and what is left in them,
// baths and their age, sessions, what each act called for and how far the hand was from it.
//
// Everything here is a pure function of entries and an explicit moment (as of): no clock, no map order, no locale.
// Kept views hold only what a home's own entries say; what needs two homes or a now is worked out on reading.
package projections

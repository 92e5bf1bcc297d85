// Package snapshot is the book as of a moment: pictures and their sheets, boxes, baths, sessions, cameras, each folded
// from its own entries when it is first asked for; the views that a book keeps; what depends on what.
//
// Everything here, and in the packages that depend on it, is a pure function of entries and an explicit moment: no clock,
// no map order, no locale. Kept views hold only what a stream's own entries say; what needs two streams or a now is worked
// out on reading.
package snapshot

// Package export is what leaves the house: tables as CSV, the log as printed pages, a picture's own page, labels. It
// reads a book through a small interface and writes bytes; files, names of files and what is overwritten are the
// caller's affair. The same book gives the same bytes, on every run: it takes no clock, no locale and no map's order.
package export

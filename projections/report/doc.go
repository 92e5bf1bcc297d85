// Package report answers what is asked of a book: today, stock, baths, sessions, pictures, a history, a year, and what
// the judged sheets say of indexes, filters, development and hands.
package report

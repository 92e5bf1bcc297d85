// Package why looks for what spoiled a sheet: each rule compares what was called for with what was done, and what undoing
// the difference would explain of what was judged.
package why

// Package line reads what a person types: the order of its words, numbers with their units, times, what an act is told
// in words. What cannot be followed is refused in one line with what to type instead. It knows neither the book nor the
// library that parses options, and never reads the machine's clock: the moment that counts as now is handed in.
package line

// Package calledfor says what an act called for: the exposure of a sheet, a print or a strip, the time of a bath, a wash;
// and how far what was done is from it.
package calledfor

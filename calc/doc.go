// Package calc is the arithmetic of the trade: exposure, lens, paper, tones,
// baths, wash, sun, test strips and the fits that learn from a book. It knows
// nothing of the notebook, holds no clock and keeps no state: the same numbers
// in give the same numbers out.
//
// # Units
//
// Times are seconds, lengths millimetres, temperatures degrees Celsius, angles
// degrees, illuminance lux, luminance candela per square metre, volumes
// millilitres, areas square metres, steps of exposure stops (log2). An index is
// an exposure index on the arithmetic scale of ISO speeds. A relative aperture
// is written as it is engraved; ExactF gives the number behind the engraving.
// Whatever departs from this carries its unit in its name.
//
// # Where a number comes from
//
// Doc comments mark every formula and every default with one of four words:
//
//   - published: the source stands in the comment, and check values copied from
//     it stand in testdata/published (those that no formula here is held to, in
//     testdata/published/spare);
//   - common practice: the trade does it so, no source is cited;
//   - derived: it follows from the lines above by arithmetic;
//   - our own model: neither measured nor published by anyone, chosen here.
//
// Common practice and our own models are defaults: each is a parameter or a
// named constant, so that whoever measured better can put their number in.
//
// # Errors
//
// A value for which a formula says nothing gives a *RangeError that names the
// quantity, the value and the range. No function panics, and none hands back a
// NaN, an infinity or a negative time without an error beside it; the far limit
// of a depth of field is the one infinity with a meaning, and says so.
package calc

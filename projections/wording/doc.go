// Package wording writes numbers, times, shares and counts as a person reads them, in one way everywhere, and holds the
// refusal, which says what is refused, why, and what to do instead.
package wording

// Package wording writes numbers, times, shares and counts as a person reads them, in one way everywhere, and holds the
// refusal: a plain no with what, why and what to do.
package wording

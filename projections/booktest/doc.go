// Package booktest makes books for the tests of what is done with one: from acts written one a line, from files of
// lines, from a story told act by act. Only tests import it.
package booktest

// Package pages draws what is printed: the log of a book, the page of a picture, labels, sheets for the wall, the four
// quadrants. It lays out with package page and takes what it says from the projections.
package pages

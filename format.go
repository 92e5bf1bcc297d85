// Package traybook holds the page that tells how everything the program keeps can be read without it.
package traybook

import _ "embed"

// Format is that page, as Markdown. Every archive has a copy.
//
//go:embed FORMAT.md
var Format string

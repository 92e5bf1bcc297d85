// Package traybook holds what tells a stranger how everything the program keeps can be read without it. Every archive has a
// copy of each.
package traybook

import _ "embed"

// Format is the page about entries, chains and files, as Markdown.
//
//go:embed FORMAT.md
var Format string

// Kinds is the page about each kind of entry and its fields, as Markdown, and KindsSchema the same as JSON Schema. They are made
// from the kinds by a test of package events.
var (
	//go:embed docs/kinds.md
	Kinds string
	//go:embed docs/kinds.schema.json
	KindsSchema string
)

// Reader is a program in Python that checks the chains and tells a picture's history.
//
//go:embed docs/reader.py
var Reader string

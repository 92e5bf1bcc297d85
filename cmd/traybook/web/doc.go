// Package web shows the book in a browser, on this machine or on a phone in the same network. It draws pages of what the
// reports say and hands acts on as the lines that a hand would type; it knows no rule of the trade. It alone speaks HTTP.
package web

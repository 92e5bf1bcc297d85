// Package acts writes: it fills in what an act leaves out, refuses what is impossible, notes what surprises, and takes in
// files of acts in the order in which they were done.
package acts

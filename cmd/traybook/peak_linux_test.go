package main

import (
	"os"
	"syscall"
)

// peakOf is the most memory that an ended program held, and that whoever started it held at that moment: a test that asks
// runs alone.
func peakOf(p *os.ProcessState) int64 { return p.SysUsage().(*syscall.Rusage).Maxrss << 10 }

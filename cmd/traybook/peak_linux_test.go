package main

import (
	"os"
	"syscall"
)

// peakOf is the most memory that an ended program held.
func peakOf(p *os.ProcessState) int64 { return p.SysUsage().(*syscall.Rusage).Maxrss << 10 }

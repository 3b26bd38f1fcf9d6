package main

import (
	"fmt"
	"os"
	"syscall"
)

// largest is the most memory an ended process had at a time.
func largest(s *os.ProcessState) string {
	if u, ok := s.SysUsage().(*syscall.Rusage); ok {
		return fmt.Sprintf("%d MiB", u.Maxrss/1024)
	}
	return "not known"
}

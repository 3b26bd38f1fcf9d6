//go:build unix

package follow

import (
	"os"
	"syscall"
)

// lockFile takes the lock, which ends with the process however it ends.
func lockFile(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) }

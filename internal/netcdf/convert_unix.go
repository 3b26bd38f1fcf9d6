//go:build unix

package netcdf

import (
	"os"
	"os/exec"
	"syscall"
)

// ownGroup puts the process into a group of its own, which is killed as a whole
// when the command is cancelled.
func ownGroup(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Cancel = func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
}

func endedByFileSize(state *os.ProcessState) bool {
	status, ok := state.Sys().(syscall.WaitStatus)
	return ok && status.Signaled() && status.Signal() == syscall.SIGXFSZ
}

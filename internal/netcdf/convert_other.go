//go:build !unix

package netcdf

import (
	"os"
	"os/exec"
)

func ownGroup(*exec.Cmd)                    {}
func endedByFileSize(*os.ProcessState) bool { return false }

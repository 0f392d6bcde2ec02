//go:build unix

package turn

import (
	"os/exec"
	"syscall"
)

// killGroup lets the end of a command's context end what it has started, too: a
// relay must not be switched by what is left of a change that was given up.
func killGroup(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Cancel = func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
}

package main

import (
	"fmt"
	"sync"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"
)

// A supervisor is systemd, where it started the program: it is told when the
// survey has begun, that samples come, and how far the survey is (sd_notify(3)).
// Elsewhere nobody hears it.
type supervisor struct {
	mu   sync.Mutex
	next time.Time // before which it need not be told again
	gap  time.Duration
}

// newSupervisor says that the survey begins.
func newSupervisor() *supervisor {
	s := &supervisor{}
	if limit, err := daemon.SdWatchdogEnabled(false); err == nil && limit > 0 {
		s.gap = limit / 4
	}
	notifySystemd(daemon.SdNotifyReady)
	return s
}

// alive feeds the watchdog, where there is one.
func (s *supervisor) alive() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if now := time.Now(); s.gap > 0 && !now.Before(s.next) {
		s.next = now.Add(s.gap)
		notifySystemd(daemon.SdNotifyWatchdog)
	}
}

// status is the line that systemctl status shows.
func (s *supervisor) status(format string, args ...any) {
	notifySystemd("STATUS=" + fmt.Sprintf(format, args...))
}

func (s *supervisor) stopping() { notifySystemd(daemon.SdNotifyStopping) }

// notifySystemd sends a state. That nobody listens is the rule, not an error.
func notifySystemd(state string) {
	_, _ = daemon.SdNotify(false, state)
}

package plan

import (
	"fmt"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A plan of many setups, bearings or mistakes costs in proportion to them: ten times as many
// take ten times as much of the processor, not a hundred times. The limit is between, at 40.
// What other programs take does not count.
func TestPlansTakeLinearTime(t *testing.T) {
	for what, piece := range map[string]func(i int) string{
		"setups": func(i int) string { return fmt.Sprintf("[[setup]]\nantenna=\"a%d\"\nplacement=\"p\"\n", i) },
		"antennas": func(i int) string {
			return fmt.Sprintf("[[setup]]\nantenna=\"a%d\"\nplacement=\"p\"\n[[antenna]]\nname=\"a%[1]d\"\nkind=\"loop\"\n", i)
		},
		"bearings": func(i int) string {
			return fmt.Sprintf("[[setup]]\nantenna=\"loop\"\nplacement=\"p%d\"\nbearings=[0,90,180]\n", i)
		},
		"gains": func(i int) string {
			return fmt.Sprintf("[[setup]]\nantenna=\"a%d\"\nplacement=\"p\"\n[[gain]]\nantenna=\"a%[1]d\"\ngain=\"2 dB\"\n", i)
		},
		"mistakes":        func(i int) string { return "[[setup]]\nantenna=\"a\"\n" },
		"unread gains":    func(i int) string { return "[[gain]]\ngain=\"much\"\nantenna=\"x\"\n" },
		"unread segments": func(i int) string { return "[[segment]]\nband=\"1 m\"\n" },
	} {
		t.Run(what, func(t *testing.T) {
			wrong := what == "mistakes" || strings.HasPrefix(what, "un")
			took := func(n int) time.Duration {
				text, from := manyOf(n, piece), processorTime(t)
				p, err := Parse(text)
				if (err != nil) != wrong {
					t.Fatal(err)
				}
				if err == nil {
					p.Doubts(p.Outlook(1, time.Hour), time.Hour)
					p.HalfTurn()("loop")
				}
				return processorTime(t) - from
			}
			few := min(took(500), took(500), took(500))
			if many := took(5000); many > 40*few {
				t.Errorf("500 take %v, 5,000 take %v", few, many)
			}
		})
	}
}

// processorTime gives how much of the processor this program took until now.
func processorTime(t *testing.T) time.Duration {
	t.Helper()
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		t.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

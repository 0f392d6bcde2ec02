package text

import (
	"fmt"
	"io"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/simulated"
	"nightfloor/reports/wording"
)

// WriteBuiltRank prints what was built in beside what was found, on a screen so many characters wide.
func WriteBuiltRank(w io.Writer, verdicts []simulated.RankVerdict, width int) error {
	claimed, right, intervals, held := 0, 0, 0, 0
	b := Sheet{Width: width}
	b.WriteString("\n")
	b.Wrap("What was built into the simulated house, dB against the reference (found, 95 % interval):", "", "")
	segment := ""
	for _, v := range verdicts {
		if v.Segment != segment {
			segment = v.Segment
			b.WriteString("  " + segment + "\n")
		}
		if v.Claims {
			claimed++
			if v.Right {
				right++
			}
		}
		if v.Found.SNRAdvantage == nil || v.Found.Low == nil || *v.Found.Low == *v.Found.High {
			continue
		}
		intervals++
		if v.Holds {
			held++
		}
		fmt.Fprintf(&b, "    %-18s %6s  (%s, %s)\n", v.Found.Setup, wording.Signed(&v.Built, 1), wording.Signed(v.Found.SNRAdvantage, 1),
			wording.Interval(v.Found.Low, v.Found.High, 1))
	}
	b.Wrap(fmt.Sprintf("%d of %d differences that an interval claims are there, in that direction; %d of %d intervals hold what was built in.", right, claimed, held, intervals), "  ", "  ")
	_, err := io.WriteString(w, b.String())
	return err
}

// WriteBuiltSupplies prints what was built in beside what was found, on a screen so many characters
// wide.
func WriteBuiltSupplies(w io.Writer, verdicts []simulated.SupplyVerdict, others []result.NoiseSource, width int) error {
	b := Sheet{Width: width}
	b.WriteString("\nSwitching supplies built in (found), UTC:\n")
	for _, v := range verdicts {
		found := "(not found)"
		if v.Found != nil {
			found = fmt.Sprintf("(%.3f kHz, %s)", float64(*v.Found.Spacing)/1e3, clockHours(v.Found.Hours))
		}
		name := fmt.Sprintf("    %-12s ", v.Built.Name)
		b.Wrap(fmt.Sprintf("%8.3f kHz, on %s %s", float64(v.Built.Spacing)/1e3, clockHours(v.Built.Hours), found), name, strings.Repeat(" ", len(name)))
	}
	b.Wrap(fmt.Sprintf("Combs found that were not built in: %d. A pause shorter than a round may go unseen.", len(others)), "  ", "  ")
	_, err := io.WriteString(w, b.String())
	return err
}

// WriteBuiltNulls prints the nulls of supplies that were built in beside those that were found, on a
// screen so many characters wide; nothing where no antenna was turned.
func WriteBuiltNulls(w io.Writer, verdicts []simulated.NullVerdict, width int) error {
	if len(verdicts) == 0 {
		return nil
	}
	b := Sheet{Width: width}
	b.WriteString("\n")
	b.Wrap("Nulls of the supplies built in (found, 95 % interval), by the bearing of the antenna's plane:", "", "")
	found, near, held, deep := 0, 0, 0, 0
	for i, v := range verdicts {
		if i == 0 || v.Segment != verdicts[i-1].Segment || v.Turned != verdicts[i-1].Turned {
			b.Wrap(v.Turned.Short(wording.SentenceRoom)+", "+wording.Printable(v.Segment), "  ", "    ")
		}
		what := "(no null found)"
		if p := v.Found; p != nil && p.Null != nil {
			found++
			what = fmt.Sprintf("(%s, %s; %s dB, %s)", nullText(*p.Null), NullInterval(p), DepthText(p), DepthInterval(p))
			for _, count := range []struct {
				n  *int
				is bool
			}{{&near, v.Off() <= 5}, {&held, v.NullHolds()}, {&deep, v.DepthHolds()}} {
				if count.is {
					*count.n++
				}
			}
		}
		fmt.Fprintf(&b, "    %-12s %6s %5s dB  %s\n", v.Supply, nullText(v.Null), wording.Number(float64(v.Depth), 1), what)
	}
	b.Wrap(fmt.Sprintf("Of %d nulls %d were found; of these %d lie within 5°, and the intervals hold %d nulls and %d depths.", len(verdicts), found, near, held, deep), "  ", "  ")
	_, err := io.WriteString(w, b.String())
	return err
}

// nullText writes a bearing to a tenth of a degree.
func nullText(deg float64) string { return wording.Number(deg, 1) + "°" }

// clockHours writes 19:02–23:41, 23:55–03:20, in UTC.
func clockHours(hours []result.NoiseHours) string {
	spans := make([]string, len(hours))
	for i, h := range hours {
		spans[i] = h.From.UTC().Format("15:04") + "–" + h.To.UTC().Format("15:04")
	}
	return strings.Join(spans, ", ")
}

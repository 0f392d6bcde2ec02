package open

import (
	"fmt"
	"io"
	"os"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// Plan reads a plan; the error names every mistake, a line each.
func Plan(path string) (plan.Plan, error) {
	text, err := PlanText(path)
	if err != nil {
		return plan.Plan{}, err
	}
	p, err := plan.Parse(text)
	if err != nil {
		return plan.Plan{}, console.PrefixLines("plan "+path, err)
	}
	return p, nil
}

// PlanText reads a plan's text, of what is too large only so much as tells that it is.
func PlanText(path string) ([]byte, error) {
	info, err := os.Stat(path) // before it is opened: a pipe may never be
	if err != nil {
		return nil, fmt.Errorf("read plan %s: %w; name a plan that can be read", path, survey.FileTrouble(err))
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("read plan %s: %s, not a file; name the plan's file", path, survey.FileKind(info.Mode()))
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read plan %s: %w; name a plan that can be read", path, survey.FileTrouble(err))
	}
	defer f.Close() // it was only read
	text, err := io.ReadAll(io.LimitReader(f, plan.MostBytes+1))
	if err != nil {
		return nil, fmt.Errorf("read plan %s: %w; name a plan that can be read", path, survey.FileTrouble(err))
	}
	return text, nil
}

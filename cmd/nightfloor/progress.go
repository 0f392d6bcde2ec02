package main

import (
	"io"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
)

// A progress draws how far long work has come, on a terminal only.
type progress struct {
	container *mpb.Progress
	bar       *mpb.Bar
}

// newProgress begins a bar of total steps.
func newProgress(c *console, what string, total int) *progress {
	var to io.Writer
	if c.terminal() {
		to = c.err
	}
	container := mpb.New(mpb.WithOutput(to))
	bar := container.AddBar(int64(total), mpb.BarRemoveOnComplete(),
		mpb.PrependDecorators(decor.Name(what+" "), decor.CountersNoUnit("%d of %d")),
		mpb.AppendDecorators(decor.OnComplete(decor.EwmaETA(decor.ET_STYLE_GO, 30), "")))
	return &progress{container, bar}
}

// at says that n steps are done.
func (p *progress) at(n int) { p.bar.SetCurrent(int64(n)) }

// end takes the bar away.
func (p *progress) end() {
	p.bar.Abort(true)
	p.container.Wait()
}

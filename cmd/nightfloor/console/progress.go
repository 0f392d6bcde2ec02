package console

import (
	"io"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
)

// A Progress draws how far long work has come, on a terminal only.
type Progress struct {
	container *mpb.Progress
	bar       *mpb.Bar
}

// NewProgress begins a bar of total steps.
func NewProgress(c *Console, what string, total int) *Progress {
	var to io.Writer
	if c.Terminal() {
		to = c.Err
	}
	container := mpb.New(mpb.WithOutput(to))
	bar := container.AddBar(int64(total), mpb.BarRemoveOnComplete(),
		mpb.PrependDecorators(decor.Name(what+" "), decor.CountersNoUnit("%d of %d")),
		mpb.AppendDecorators(decor.OnComplete(decor.EwmaETA(decor.ET_STYLE_GO, 30), "")))
	return &Progress{container, bar}
}

// At says that n steps are done.
func (p *Progress) At(n int) { p.bar.SetCurrent(int64(n)) }

// End takes the bar away.
func (p *Progress) End() {
	p.bar.Abort(true)
	p.container.Wait()
}

package dsp

// A findingWatch looks for interference over the whole usable passband, whatever the
// bands. What it holds does not grow with the recording.
type findingWatch struct {
	o        SeekOptions
	free     []bool // columns that no signal takes, as far as is known
	channels passbandChannels
	mains    *mainsWatch
	impulses impulseWatch
}

// newFindingWatch readies a watch of so many columns.
func newFindingWatch(o SeekOptions, columns int) *findingWatch {
	w := &findingWatch{o: o, free: make([]bool, columns), mains: newMainsWatch(o.Mains)}
	w.reset()
	return w
}

// reset forgets the recording.
func (w *findingWatch) reset() {
	clear(w.free)
	w.mains.reset()
	w.impulses.reset()
}

// know notes the columns that a mask leaves free. It is to be the mask that gives
// lines the most room: sidebands that are left must not speak for the noise.
func (w *findingWatch) know(m *mask) {
	for b := range w.free {
		w.free[b] = !m.taken[0][b] && !m.taken[1][b]
	}
}

// listen looks at the free channels in the chunk in hand.
func (w *findingWatch) listen(m *Meter) {
	start := float64(m.counted) * float64(m.chunk.Hop) / m.chunk.Rate
	if !w.channels.take(m.chunk, w.free, m.averages.gain, start) {
		return
	}
	w.mains.add(&w.channels)
	w.impulses.add(&w.channels, m.chunk.Bins)
}

// findings gives what was found in the whole recording.
func (w *findingWatch) findings(m *Meter) *Findings {
	f := &Findings{Mains: w.mains.result(m)}
	f.Impulses = w.impulses.result(f.Mains)
	levels := newCellLevels(m, w.free)
	f.Notches = levels.notches(w.o.Quiet)
	f.Humps = levels.humps()
	return f
}

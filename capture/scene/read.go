package scene

import (
	"context"
	"fmt"
)

// Read delivers the next len(buf)/2 samples. None is ever dropped.
func (h *House) Read(ctx context.Context, buf []byte) (dropped int64, err error) {
	if len(buf)%2 != 0 {
		return 0, fmt.Errorf("read %d bytes: not whole samples; give a buffer of even length", len(buf))
	}
	if h.closed {
		return 0, errClosed
	}
	for len(buf) > 0 {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		if h.settle() || h.slept {
			h.restart()
			h.slept = false
		}
		n := min(len(buf)/2, h.available())
		from := hop - h.undelivered
		h.synth.quantise(buf[:2*n], from)
		h.undelivered -= n
		h.time.read.Add(int64(n))
		buf = buf[2*n:]
	}
	return 0, nil
}

// available gives the number of samples that can be delivered as they are,
// after having some made if there are none.
func (h *House) available() int {
	if h.undelivered == 0 {
		h.synth.next()
		h.undelivered = hop
	}
	if len(h.pending) > 0 {
		return int(min(int64(h.undelivered), h.pending[0].index-h.time.index()))
	}
	return h.undelivered
}

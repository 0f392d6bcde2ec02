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
		if h.settle() || h.rested {
			h.restart()
			h.rested = false
		}
		n := min(len(buf)/2, h.available())
		from := hop - h.ready
		h.synth.quantise(buf[:2*n], from)
		h.ready -= n
		h.time.read.Add(int64(n))
		buf = buf[2*n:]
	}
	return 0, nil
}

// available gives the number of samples that can be delivered as they are,
// after having some made if there are none.
func (h *House) available() int {
	if h.ready == 0 {
		h.synth.next()
		h.ready = hop
	}
	if len(h.wanted) > 0 {
		return int(min(int64(h.ready), h.wanted[0].index-h.time.index()))
	}
	return h.ready
}

package spectrum

// A DCOffset sums I and Q; their mean is the receiver's DC offset.
type DCOffset struct {
	re, im float64
	n      int64
}

// Add takes samples in full-scale units.
func (m *DCOffset) Add(x []complex64) {
	var re, im float64
	for _, v := range x {
		re += float64(real(v))
		im += float64(imag(v))
	}
	m.re, m.im, m.n = m.re+re, m.im+im, m.n+int64(len(x))
}

// AddU8 takes interleaved 8-bit codes and sums them as whole numbers.
func (m *DCOffset) AddU8(iq []byte) {
	var re, im uint64
	for k := 0; k+1 < len(iq); k += 2 {
		re += uint64(iq[k])
		im += uint64(iq[k+1])
	}
	n := len(iq) / 2
	m.re += (float64(re) - 127.5*float64(n)) / 128
	m.im += (float64(im) - 127.5*float64(n)) / 128
	m.n += int64(n)
}

// Power gives |mean|² in full-scale units, 0 without samples.
func (m *DCOffset) Power() float64 {
	if m.n == 0 {
		return 0
	}
	re, im := m.re/float64(m.n), m.im/float64(m.n)
	return re*re + im*im
}

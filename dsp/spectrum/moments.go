package spectrum

// Moments sum the samples and their squares.
type Moments struct {
	re, im, square float64
	n              int64
}

// Add takes samples in full-scale units.
func (m *Moments) Add(x []complex64) {
	var re, im, square float64
	for _, v := range x {
		i, q := float64(real(v)), float64(imag(v))
		re += i
		im += q
		square += i*i + q*q
	}
	m.re, m.im, m.square, m.n = m.re+re, m.im+im, m.square+square, m.n+int64(len(x))
}

// AddU8 takes interleaved 8-bit codes and sums them as whole numbers.
func (m *Moments) AddU8(iq []byte) {
	var re, im, square uint64
	for k := 0; k+1 < len(iq); k += 2 {
		i, q := uint64(iq[k]), uint64(iq[k+1])
		re += i
		im += q
		square += i*i + q*q
	}
	n := float64(len(iq) / 2)
	m.re += (float64(re) - 127.5*n) / 128
	m.im += (float64(im) - 127.5*n) / 128
	m.square += (float64(square) - 255*float64(re+im) + 2*127.5*127.5*n) / (128 * 128)
	m.n += int64(len(iq) / 2)
}

// Offset gives the power of the mean in full-scale units, the receiver's DC offset; 0
// without samples.
func (m *Moments) Offset() float64 {
	n := float64(max(1, m.n))
	re, im := m.re/n, m.im/n
	return re*re + im*im
}

// Power gives the mean power in full-scale units, 0 without samples.
func (m *Moments) Power() float64 { return m.square / float64(max(1, m.n)) }

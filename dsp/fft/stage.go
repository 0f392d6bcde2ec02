package fft

// run carries out one stage; from and to do not overlap.
func (s *stage) run(fromRe, fromIm, toRe, toIm []float32) {
	switch {
	case runStageVector(s, fromRe, fromIm, toRe, toIm):
	case s.stride == 1:
		s.runFirst(fromRe, fromIm, toRe, toIm)
	default:
		for p := range s.quarter {
			s.runRow(p, fromRe, fromIm, toRe, toIm)
		}
	}
}

// runFirst is the first stage: a twiddle a butterfly, its four results side by
// side.
func (s *stage) runFirst(fromRe, fromIm, toRe, toIm []float32) {
	n, t := s.quarter, s.twiddles
	ar, br, cr, dr := fromRe[:n], fromRe[n:][:n], fromRe[2*n:][:n], fromRe[3*n:][:n]
	ai, bi, ci, di := fromIm[:n], fromIm[n:][:n], fromIm[2*n:][:n], fromIm[3*n:][:n]
	w1r, w1i := t[:n], t[s.pitch:][:n]
	w2r, w2i := t[2*s.pitch:][:n], t[3*s.pitch:][:n]
	w3r, w3i := t[4*s.pitch:][:n], t[5*s.pitch:][:n]
	for p := range n {
		acr, aci := ar[p]+cr[p], ai[p]+ci[p]
		amr, ami := ar[p]-cr[p], ai[p]-ci[p]
		bdr, bdi := br[p]+dr[p], bi[p]+di[p]
		bmr, bmi := br[p]-dr[p], bi[p]-di[p]
		yr, yi := toRe[4*p:][:4], toIm[4*p:][:4]
		yr[0], yi[0] = acr+bdr, aci+bdi
		ur, ui := amr+bmi, ami-bmr // (a−c) − j(b−d)
		yr[1], yi[1] = ur*w1r[p]-ui*w1i[p], ur*w1i[p]+ui*w1r[p]
		ur, ui = acr-bdr, aci-bdi
		yr[2], yi[2] = ur*w2r[p]-ui*w2i[p], ur*w2i[p]+ui*w2r[p]
		ur, ui = amr-bmi, ami+bmr // (a−c) + j(b−d)
		yr[3], yi[3] = ur*w3r[p]-ui*w3i[p], ur*w3i[p]+ui*w3r[p]
	}
}

// runRow computes the butterflies of twiddle p: stride of them, their inputs a
// quarter of the array apart, their outputs stride apart.
func (s *stage) runRow(p int, fromRe, fromIm, toRe, toIm []float32) {
	stride, span, at, out := s.stride, s.quarter*s.stride, p*s.stride, 4*p*s.stride
	t := s.twiddles[p:]
	w1r, w1i, w2r, w2i, w3r, w3i := t[0], t[s.pitch], t[2*s.pitch], t[3*s.pitch], t[4*s.pitch], t[5*s.pitch]
	// Slices of one length let the compiler drop the bounds checks below.
	ar, ai := fromRe[at:][:stride], fromIm[at:][:stride]
	br, bi := fromRe[at+span:][:stride], fromIm[at+span:][:stride]
	cr, ci := fromRe[at+2*span:][:stride], fromIm[at+2*span:][:stride]
	dr, di := fromRe[at+3*span:][:stride], fromIm[at+3*span:][:stride]
	y0r, y0i := toRe[out:][:stride], toIm[out:][:stride]
	y1r, y1i := toRe[out+stride:][:stride], toIm[out+stride:][:stride]
	y2r, y2i := toRe[out+2*stride:][:stride], toIm[out+2*stride:][:stride]
	y3r, y3i := toRe[out+3*stride:][:stride], toIm[out+3*stride:][:stride]
	for q := range stride {
		acr, aci := ar[q]+cr[q], ai[q]+ci[q]
		amr, ami := ar[q]-cr[q], ai[q]-ci[q]
		bdr, bdi := br[q]+dr[q], bi[q]+di[q]
		bmr, bmi := br[q]-dr[q], bi[q]-di[q]
		y0r[q], y0i[q] = acr+bdr, aci+bdi
		ur, ui := amr+bmi, ami-bmr // (a−c) − j(b−d)
		y1r[q], y1i[q] = ur*w1r-ui*w1i, ur*w1i+ui*w1r
		ur, ui = acr-bdr, aci-bdi
		y2r[q], y2i[q] = ur*w2r-ui*w2i, ur*w2i+ui*w2r
		ur, ui = amr-bmi, ami+bmr // (a−c) + j(b−d)
		y3r[q], y3i[q] = ur*w3r-ui*w3i, ur*w3i+ui*w3r
	}
}

// lastRadix4 ends a transform: n/4 butterflies of four points a quarter apart.
// from and to may be the same arrays.
func lastRadix4(fromRe, fromIm, toRe, toIm []float32) {
	if lastRadix4Vector(fromRe, fromIm, toRe, toIm) {
		return
	}
	q := len(fromRe) / 4
	ar, br, cr, dr := fromRe[:q], fromRe[q:][:q], fromRe[2*q:][:q], fromRe[3*q:][:q]
	ai, bi, ci, di := fromIm[:q], fromIm[q:][:q], fromIm[2*q:][:q], fromIm[3*q:][:q]
	y0r, y1r, y2r, y3r := toRe[:q], toRe[q:][:q], toRe[2*q:][:q], toRe[3*q:][:q]
	y0i, y1i, y2i, y3i := toIm[:q], toIm[q:][:q], toIm[2*q:][:q], toIm[3*q:][:q]
	for i := range q {
		acr, aci := ar[i]+cr[i], ai[i]+ci[i]
		amr, ami := ar[i]-cr[i], ai[i]-ci[i]
		bdr, bdi := br[i]+dr[i], bi[i]+di[i]
		bmr, bmi := br[i]-dr[i], bi[i]-di[i]
		y0r[i], y0i[i] = acr+bdr, aci+bdi
		y1r[i], y1i[i] = amr+bmi, ami-bmr
		y2r[i], y2i[i] = acr-bdr, aci-bdi
		y3r[i], y3i[i] = amr-bmi, ami+bmr
	}
}

// lastRadix2 ends a transform: n/2 butterflies of two points half apart. from
// and to may be the same arrays.
func lastRadix2(fromRe, fromIm, toRe, toIm []float32) {
	if lastRadix2Vector(fromRe, fromIm, toRe, toIm) {
		return
	}
	h := len(fromRe) / 2
	ar, br, ai, bi := fromRe[:h], fromRe[h:][:h], fromIm[:h], fromIm[h:][:h]
	y0r, y1r, y0i, y1i := toRe[:h], toRe[h:][:h], toIm[:h], toIm[h:][:h]
	for i := range h {
		sr, si, dr, di := ar[i]+br[i], ai[i]+bi[i], ar[i]-br[i], ai[i]-bi[i]
		y0r[i], y0i[i], y1r[i], y1i[i] = sr, si, dr, di
	}
}

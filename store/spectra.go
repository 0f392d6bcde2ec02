package store

import (
	"context"
	"database/sql/driver"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"sync"

	"github.com/klauspost/compress/zstd"

	"nightfloor/survey"
)

// A spectrumRow is a spectrum as its row has it, with the densities packed.
type spectrumRow struct {
	survey.Spectrum
	packed []byte
}

func (p *spectrumRow) columns() columns {
	return columns{{"first_hz", &p.First}, {"step_hz", &p.Step}, {"enbw", &p.ENBW}, {"looks", &p.Looks}, {"density", &p.packed}}
}

// unpacked gives the spectrum.
func (p *spectrumRow) unpacked() (*survey.Spectrum, error) {
	density, err := decodeDensity(p.packed)
	if err != nil {
		return nil, fmt.Errorf("%w: %w; run `nightfloor database check`", ErrDamaged, err)
	}
	p.Density = density
	return new(p.Spectrum), nil
}

// insertSpectrum stores the spectrum of a reading, if one is kept.
func insertSpectrum(c change, reading int64, sp *survey.Spectrum) (err error) {
	if sp == nil {
		return nil
	}
	row := spectrumRow{Spectrum: *sp}
	if row.packed, err = encodeDensity(sp.Density); err != nil {
		return err
	}
	_, err = c.add("spectra", append(row.columns(), column{"reading", &reading}))
	return err
}

// Spectrum gives the spectrum of a reading, nil where none was kept. Densities
// are multiples of 0.1 dB. ErrUnknown: there is no such reading.
func (s *Store) Spectrum(ctx context.Context, reading int64) (*survey.Spectrum, error) {
	what := fmt.Sprintf("read spectrum of reading %d", reading)
	var found []spectrumRow
	var there []int64
	err := s.read(ctx, what, func(snap snapshot) (err error) {
		found, err = rows(ctx, snap, (*spectrumRow).columns, `FROM spectra WHERE reading = ?`, reading)
		return first(err, snap.each(ctx, func(row []driver.Value) error {
			there = append(there, integer(row[0]))
			return nil
		}, `SELECT id FROM readings WHERE id = ?`, reading))
	})
	switch {
	case err != nil:
		return nil, err
	case len(there) == 0:
		return nil, fmt.Errorf("%s: %w", what, ErrUnknown)
	case len(found) == 0:
		return nil, nil
	}
	sp, err := found[0].unpacked()
	return sp, explain(what, err)
}

// Spectra hands the spectra of the readings that filter means to yield, in the
// order of Sweeps, with the reading's number. A spectrum belongs to yield and may be kept. One
// that cannot be read is left out (LeftOut).
func (s *Store) Spectra(ctx context.Context, filter Filter, yield func(reading int64, sp *survey.Spectrum) error) error {
	return s.read(ctx, "read spectra", func(snap snapshot) error {
		var reading, id int64
		var packed spectrumRow
		row := append(columns{{"r.id", &reading}, {"s.survey", &id}}, packed.columns()...)
		snap.leftOut.begin("spectra")
		return snap.each(ctx, func(values []driver.Value) error {
			if snap.scan(values, row) {
				if sp, err := packed.unpacked(); err == nil {
					return yield(reading, sp)
				}
			}
			snap.leftOut["spectra"][id]++
			return nil
		}, "SELECT "+row.names("")+fromReadings+" CROSS JOIN spectra p ON p.reading = r.id"+meant+byReading, filter.args()...)
	})
}

// How the densities of a spectrum stand in column density.
//
//	byte 0     version of this layout, 1
//	bytes 1–2  step in 0.001 dB, little-endian, 100 for 0.1 dB
//	bytes 3–6  number n of bins, little-endian
//	then       a zstd frame (RFC 8878) of 2n bytes: the low bytes of n 16-bit
//	           words, then their high bytes
//
// A word is the zigzag (0, −1, 1, −2 … as 0, 1, 2, 3 …) of the difference,
// modulo 65536, between a bin's code and the one before, the first against 0.
// A code is the density in steps, rounded, in dBFS/Hz; the codes below −32000
// and above 32000 are kept for what has no steps.
const (
	blobVersion = 1
	blobHeader  = 7
	stepMilliDB = 100
	maxCode     = 32000
	codeNaN     = -32768
	codeNegInf  = -32767
	codePosInf  = 32767
	maxBins     = 1 << 23 // 16 times a segment of the widest dongle in 6 Hz bins
)

var errBlob = errors.New("spectrum cannot be read")

// coders gives the compressor and the decompressor of all stores; their
// one-shot methods may be used from any goroutine.
var coders = sync.OnceValues(func() (*zstd.Encoder, *zstd.Decoder) {
	enc, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderCRC(true),
		zstd.WithEncoderLevel(zstd.SpeedDefault), zstd.WithAllLitEntropyCompression(true))
	if err != nil {
		panic(err) // the options are ours
	}
	dec, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(2),
		zstd.WithDecoderMaxMemory(2*maxBins+1024), zstd.WithDecodeAllCapLimit(true))
	if err != nil {
		panic(err)
	}
	return enc, dec
})

// encodeDensity packs densities in dBFS/Hz, exact to half a step of 0.1 dB;
// NaN and the infinities are kept. ErrInvalid: a density beyond ±3200 dBFS/Hz,
// which no receiver gives, or too many bins.
func encodeDensity(density []float32) ([]byte, error) {
	n := len(density)
	if n > maxBins {
		return nil, fmt.Errorf("%w: spectrum of %d bins, at most %d can be kept; cut it into segments", ErrInvalid, n, maxBins)
	}
	words := make([]byte, 2*n)
	before := int16(0)
	for i, d := range density {
		code, err := codeOf(float64(d))
		if err != nil {
			return nil, fmt.Errorf("bin %d: %w", i, err)
		}
		diff := code - before // wraps, and so does its undoing
		before = code
		word := uint16(diff<<1) ^ uint16(diff>>15)
		words[i], words[n+i] = byte(word), byte(word>>8)
	}
	blob := make([]byte, blobHeader, blobHeader+n+64)
	blob[0] = blobVersion
	binary.LittleEndian.PutUint16(blob[1:], stepMilliDB)
	binary.LittleEndian.PutUint32(blob[3:], uint32(n))
	enc, _ := coders()
	return enc.EncodeAll(words, blob), nil
}

// codeOf gives the code of a density in dBFS/Hz.
func codeOf(d float64) (int16, error) {
	switch {
	case math.IsNaN(d):
		return codeNaN, nil
	case math.IsInf(d, -1):
		return codeNegInf, nil
	case math.IsInf(d, 1):
		return codePosInf, nil
	}
	code := math.Round(d * (1000.0 / stepMilliDB))
	if math.Abs(code) > maxCode {
		return 0, fmt.Errorf("%w: density %g dBFS/Hz; this is a mistake in nightfloor, please report it", ErrInvalid, d)
	}
	return int16(code), nil
}

// decodeDensity unpacks what encodeDensity packed. It trusts nothing in the
// blob: errBlob, and never more memory than six bytes a bin that the blob
// claims, which a frame of fewer bytes than claimed ends as an error.
func decodeDensity(blob []byte) ([]float32, error) {
	if len(blob) < blobHeader {
		return nil, fmt.Errorf("%w: %d bytes are too few", errBlob, len(blob))
	}
	if blob[0] != blobVersion {
		return nil, fmt.Errorf("%w: layout %d, this version knows %d; update nightfloor", errBlob, blob[0], blobVersion)
	}
	step := float64(binary.LittleEndian.Uint16(blob[1:])) / 1000
	n := int(binary.LittleEndian.Uint32(blob[3:]))
	if n > maxBins || step == 0 {
		return nil, fmt.Errorf("%w: %d bins in steps of %g dB", errBlob, n, step)
	}
	_, dec := coders()
	words, err := dec.DecodeAll(blob[blobHeader:], make([]byte, 0, 2*n))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errBlob, err)
	}
	if len(words) != 2*n {
		return nil, fmt.Errorf("%w: %d bytes for %d bins", errBlob, len(words), n)
	}
	density := make([]float32, n)
	code := int16(0)
	for i := range density {
		word := uint16(words[i]) | uint16(words[n+i])<<8
		code += int16(word>>1) ^ -int16(word&1)
		density[i] = densityOf(code, step)
	}
	return density, nil
}

// densityOf gives the density of a code in steps of step dB.
func densityOf(code int16, step float64) float32 {
	switch code {
	case codeNaN:
		return float32(math.NaN())
	case codeNegInf:
		return float32(math.Inf(-1))
	case codePosInf:
		return float32(math.Inf(1))
	}
	return float32(float64(code) * step)
}

package iqfile

import (
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"fmt"
	"io"
	"time"
)

// Digest identifies what was recorded, so that a recording imported twice is
// stored once: SHA-256, in hexadecimal, over datatype, centre, rate, start and
// the bytes of the samples. Name and container do not count: a pair, and the
// archive it was packed in, have one digest. It reads all samples, and compares
// them with the checksum that the description gives (ErrChecksum).
func (r Recording) Digest() (string, error) {
	if err := r.data.check(); err != nil {
		return "", at(r.what(), err)
	}
	file, section, err := r.data.open()
	if err != nil {
		return "", at(r.what(), err)
	}
	defer file.Close()
	size := r.Samples * r.Datatype.Size()
	start := ""
	if !r.Start.IsZero() {
		start = r.Start.UTC().Format(time.RFC3339Nano)
	}
	sum := sha256.New()
	fmt.Fprintf(sum, "%s\n%x\n%x\n%s\n", r.Datatype, float64(r.Centre), float64(r.Rate), start)
	n, err := io.Copy(sum, io.NewSectionReader(section, r.offset, size))
	if err == nil && n < size {
		err = faultf(ErrTruncated, "leave the file alone while it is read", "the file became shorter while it was read")
	}
	if err != nil {
		return "", at(r.what(), err)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// check compares the dataset with the checksum that its description gives,
// once.
func (d *dataset) check() error {
	if d.sha512 == "" {
		return nil
	}
	d.verify.Do(func() { d.verified = d.compare() })
	return d.verified
}

func (d *dataset) compare() error {
	file, section, err := d.open()
	if err != nil {
		return err
	}
	defer file.Close()
	sum := sha512.New()
	if _, err := io.Copy(sum, section); err != nil {
		return err
	}
	if hex.EncodeToString(sum.Sum(nil)) != d.sha512 {
		return faultf(ErrChecksum, "get the recording anew; if it was changed on purpose, remove core:sha512 from its description",
			"the data are not what core:sha512 says: the file was damaged or changed")
	}
	return nil
}

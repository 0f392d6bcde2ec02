package scene

import (
	"fmt"
	"time"

	"nightfloor/survey"
)

// A Station is a broadcaster as it stands at one time.
type Station struct {
	Name      string
	Frequency survey.Hz // as sent
	OnAir     bool
}

// Stations lists the broadcasters between two frequencies, by frequency.
func (t Truth) Stations(low, high survey.Hz, at time.Time) []Station {
	var out []Station
	for i := range t.world.stations {
		s := &t.world.stations[i]
		if f := survey.Hz(s.frequency); f < low || f > high {
			continue
		}
		_, onAir := s.hours.since(t.world.timeOfDay(t.world.since(at)))
		out = append(out, Station{Name: s.name, Frequency: survey.Hz(s.frequency), OnAir: onAir})
	}
	return out
}

// SNR gives a station's mean SNR in 9 kHz, against the noise at its frequency;
// ok is false off the air and into a terminator.
func (t Truth) SNR(setup survey.Setup, station string, at time.Time) (snr survey.DB, ok bool, err error) {
	m, err := mount(setup)
	if err != nil {
		return 0, false, err
	}
	s, err := t.world.stationNamed(station)
	if err != nil {
		return 0, false, err
	}
	now := t.world.since(at)
	carrier := t.world.carrier(m, s, now)
	if carrier == 0 {
		return 0, false, nil
	}
	return survey.DB(toDB(carrier / (t.world.noise(m, s.frequency, now).total() * snrBandwidth))), true, nil
}

func (w *world) stationNamed(name string) (*station, error) {
	for i := range w.stations {
		if w.stations[i].name == name {
			return &w.stations[i], nil
		}
	}
	return nil, fmt.Errorf("station %q: not in the scene; Stations lists those there are", name)
}

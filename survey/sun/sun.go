package sun

import (
	"math"
	"time"
)

const radian = math.Pi / 180 // of a degree

// daysSinceJ2000 gives the days since 2000-01-01 12:00. UTC stands for both UT
// and TT: their difference, about a minute, moves the sun by 0.001°.
func daysSinceJ2000(t time.Time) float64 {
	const j2000 = 946728000 // Unix time of 2000-01-01T12:00:00Z
	return (float64(t.Unix()-j2000) + float64(t.Nanosecond())*1e-9) / 86400
}

// position gives the sun's right ascension and declination in radians
// [Almanac:C5], good to 0.01° between 1950 and 2050 (PHYSICS.md 3.1).
func position(days float64) (rightAscension, declination float64) {
	meanLongitude := 280.460 + 0.9856474*days // degrees, aberration included
	anomaly := (357.528 + 0.9856003*days) * radian
	longitude := (meanLongitude + 1.915*math.Sin(anomaly) + 0.020*math.Sin(2*anomaly)) * radian
	obliquity := (23.439 - 0.0000004*days) * radian
	rightAscension = math.Atan2(math.Cos(obliquity)*math.Sin(longitude), math.Cos(longitude))
	return rightAscension, math.Asin(math.Sin(obliquity) * math.Sin(longitude))
}

// hourAngle gives the sun's hour angle at longitude lonDeg (east positive) in
// radians, zero at true noon, and its declination.
func hourAngle(t time.Time, lonDeg float64) (angle, declination float64) {
	days := daysSinceJ2000(t)
	sidereal := math.Mod(280.46061837+360.98564736629*days+lonDeg, 360) * radian // [Meeus:1998, eq. 12.4]
	rightAscension, declination := position(days)
	return sidereal - rightAscension, declination
}

// Elevation gives the height of the sun's middle over the horizon in
// degrees, without refraction, at time t and a place given in degrees, north
// and east positive. It is good to about 0.02° from 1950 to 2050.
func Elevation(t time.Time, latDeg, lonDeg float64) float64 {
	angle, declination := hourAngle(t, lonDeg)
	lat := latDeg * radian
	sine := math.Sin(lat)*math.Sin(declination) + math.Cos(lat)*math.Cos(declination)*math.Cos(angle)
	return math.Asin(max(-1, min(1, sine))) / radian
}

// Rising tells whether the sun is on the rising half of its day at longitude
// lonDeg: between true midnight and true noon. It does not ask for the latitude,
// so that it has an answer under the polar night and the midnight sun too.
func Rising(t time.Time, lonDeg float64) bool {
	angle, _ := hourAngle(t, lonDeg)
	return math.Sin(angle) < 0
}

// Package sun tells where the sun stands over a site, by which day, dusk, night and
// dawn are told apart, and where the site is, by its Maidenhead locator.
//
// Latitudes and longitudes are in degrees, north and east positive. Elevation gives
// degrees over the horizon, good to 0.02° from 1950 to 2050.
package sun

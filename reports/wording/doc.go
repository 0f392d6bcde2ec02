// Package wording writes names, figures and times the one way in which they are written
// everywhere: setups within a given room, frequencies, differences with a true minus sign,
// spans and durations.
//
// Whatever comes from a file or a receiver goes through Printable before it is shown. What
// a person reads in sentences is composed of these pieces; tables and the summary are left to
// package text, the page to package page.
package wording

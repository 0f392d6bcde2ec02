// Package wording writes names, figures and times the one way in which they are written
// everywhere: setups within a given room, frequencies, differences with a true minus sign,
// spans and durations.
//
// Whatever comes from a file or a receiver goes through Printable before it is shown. Sentences
// are composed of these pieces in packages doubt, text and page.
package wording

// Package lines finds the coherent lines of a recording: carriers, and what passes for
// them.
//
// In go chunks of a recording as spectrograms, with their mean powers and a rough floor,
// both by column. Each chunk's lines are found by looking at single columns over all of its
// frames, followed from chunk to chunk, and measured with a standard error, also where
// they do not stand out. Sidebands of stronger lines, the receiver's mirror images and
// the DC spike are no carriers; a Watch gives them to whoever masks them. Frequencies
// are in Hz, powers in full-scale units with the noise subtracted. Which floor a line
// must stand over, and how much, package floor says.
package lines

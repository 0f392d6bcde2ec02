// Package iqfile reads recordings of I/Q samples, whoever made them.
//
// What goes in: SigMF pairs and archives, bare sample files, two-channel WAV.
// Open reads the descriptions only and gives one Recording a SigMF capture;
// samples are streamed afterwards, so that memory does not grow with a
// recording's length. What comes out: complex baseband in full-scale units (a
// tone of |x| = 1 stands at 0 dBFS), centre frequency and rate in Hz, start in
// UTC, and the setup where the description names it.
//
// Full scale: a cu8 code c stands for (c − 127.5)/128, ci8 c/128, ci16
// c/32768, ci24 c/2²³, ci32 c/2³¹, cf32 and cf64 as they are.
//
// Files come from strangers. Sizes and offsets are checked against the data
// before use, names inside a file never leave its folder, and every fault is
// one error of the form WHAT: WHY; WHAT TO DO (see Error).
package iqfile

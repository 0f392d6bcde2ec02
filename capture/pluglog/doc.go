// Package pluglog reads the logs of metering plugs: when which device of the house
// was switched on or off.
//
// A log is comma-separated text with a time, a state or a power, and perhaps the
// device on each line, in columns that a heading names or that are recognised by
// what stands in them. Log.Read gives the switchings in order of time, or every
// mistake with its line. A power counts as on above a threshold.
package pluglog

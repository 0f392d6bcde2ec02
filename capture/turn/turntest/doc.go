// Package turntest has a terminal for tests of what asks a person.
package turntest

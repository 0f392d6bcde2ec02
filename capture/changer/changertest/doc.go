// Package changertest has a terminal for tests of what asks a person.
package changertest

package console

import (
	"bufio"
	"context"
	"fmt"
	"strings"
)

// Confirm asks whether a command is to do what cannot be undone, which it tells in a sentence. The
// error says why it is not to; yes: somebody has said so already.
func (c *Console) Confirm(ctx context.Context, command, what string, yes bool) error {
	switch {
	case yes:
		return nil
	case !IsTerminal(c.In):
		return Usagef("%s: %s; nobody can be asked here; give --yes to do so all the same", command, what)
	}
	c.Fold(c, "nightfloor: %s. Type yes to do so: ", what)
	if c.answer(ctx) != "yes" {
		return fmt.Errorf("%s: the answer was not yes: nothing is changed; start it again, or with --yes", command)
	}
	return nil
}

// answer reads a line that somebody types, "" where they stop the program.
func (c *Console) answer(ctx context.Context) string {
	came := make(chan string, 1)
	go func() {
		line, _ := bufio.NewReader(c.In).ReadString('\n') // the end of the input is no answer either
		came <- strings.TrimSpace(line)
	}()
	select {
	case line := <-came:
		return line
	case <-ctx.Done():
		return ""
	}
}

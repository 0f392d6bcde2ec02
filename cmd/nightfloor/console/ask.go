package console

import (
	"bufio"
	"cmp"
	"context"
	"errors"
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
	if answer, _ := c.answer(ctx); answer != "yes" { // the end of the input is no answer either
		return fmt.Errorf("%s: the answer was not yes: nothing is changed; start it again, or with --yes", command)
	}
	return nil
}

// Ask asks for what set takes; Enter alone takes the usual answer. What set refuses is told, and asked for again.
func (c *Console) Ask(ctx context.Context, question, usual string, set func(answer string) error) error {
	for {
		c.Fold(c, "%s [%s] ", question, usual)
		answer, err := c.answer(ctx)
		if err != nil {
			return fmt.Errorf("%w; start it again, or say it by flags", err)
		}
		wrong := set(cmp.Or(answer, usual))
		if wrong == nil {
			return nil
		}
		c.Fold(c, "%v\n", wrong)
	}
}

var errNoAnswer = errors.New("the questions were not answered to their end")

// answer reads a line that somebody types; an error where they stop the program or the input ends.
func (c *Console) answer(ctx context.Context) (string, error) {
	if c.lines == nil {
		c.lines = bufio.NewReader(c.In)
	}
	type typed struct {
		line string
		err  error
	}
	came := make(chan typed, 1)
	go func() {
		line, err := c.lines.ReadString('\n')
		came <- typed{strings.TrimSpace(line), err}
	}()
	select {
	case got := <-came:
		if got.err != nil && got.line == "" {
			return "", errNoAnswer
		}
		return got.line, nil
	case <-ctx.Done():
		return "", errNoAnswer
	}
}

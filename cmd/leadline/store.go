package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"leadline/internal/store"
	"leadline/internal/workbench"
)

// logbookPath returns the logbook in force.
func (p *program) logbookPath() string {
	switch {
	case p.logbook != "":
		return p.logbook
	case os.Getenv("LEADLINE_LOGBOOK") != "":
		return os.Getenv("LEADLINE_LOGBOOK")
	}
	return "leadline.db"
}

// open opens a logbook that exists and returns a bench on it.
func (p *program) open() (*workbench.Bench, func(), error) {
	path := p.logbookPath()
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, nil, fmt.Errorf("logbook %s: there is no such file: name the logbook with --logbook FILE or LEADLINE_LOGBOOK, or let \"leadline add FILE\" make it", plain(path))
	}
	return p.openAt(path)
}

// openOrMake opens the logbook, making it where there is none, which it says.
func (p *program) openOrMake() (*workbench.Bench, func(), error) {
	path := p.logbookPath()
	_, missing := os.Stat(path)
	bench, closeStore, err := p.openAt(path)
	if err == nil && errors.Is(missing, fs.ErrNotExist) {
		fmt.Fprintf(p.err, "a new logbook: %s\n", plain(path))
	}
	return bench, closeStore, err
}

func (p *program) openAt(path string) (*workbench.Bench, func(), error) {
	s, err := store.Open(path)
	if err != nil {
		return nil, nil, fmt.Errorf("logbook %s: %w", plain(path), err)
	}
	return workbench.New(s, p.now), func() { s.Close() }, nil
}

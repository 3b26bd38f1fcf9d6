package main

import (
	"fmt"
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

// open opens the logbook, making it where there is none, and returns a bench on it.
func (p *program) open() (*workbench.Bench, func(), error) {
	path := p.logbookPath()
	s, err := store.Open(path)
	if err != nil {
		return nil, nil, fmt.Errorf("logbook %s: %w", path, err)
	}
	return workbench.New(s, p.now), func() { s.Close() }, nil
}

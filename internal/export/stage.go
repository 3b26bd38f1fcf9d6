package export

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
)

// Staged are files that are written whole under temporary names and not yet safe. Who
// writes many flights stages one while the disk still takes the one before: making files
// needs the processor, syncing them only waits. Commit or Discard must follow.
type Staged struct {
	dir, name string
	endings   []string
	open      []*os.File
}

// Stage writes a flight's files as Write does, up to syncing them and giving them their names.
func Stage(dir string, f *Flight, formats []string) (*Staged, error) {
	list, err := ParseFormats(formats)
	if err != nil {
		return nil, err
	}
	var files []File
	for _, format := range list {
		files = append(files, format.files(f)...)
	}
	return StageFiles(dir, f.name(), files)
}

// StageFiles is Stage for files under one name with several endings. After an error
// nothing is left.
func StageFiles(dir, name string, files []File) (*Staged, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("the folder for exports cannot be made: %w", err)
	}
	s := &Staged{dir: dir, name: name}
	for _, f := range files {
		if err := s.write(f); err != nil {
			s.Discard()
			return nil, fmt.Errorf("%s: %w", name+f.Ending, err)
		}
	}
	return s, nil
}

// write writes one file under a temporary name.
func (s *Staged) write(f File) error {
	t, err := os.CreateTemp(s.dir, ".leadline-*")
	if err != nil {
		return err
	}
	s.open, s.endings = append(s.open, t), append(s.endings, f.Ending)
	b := bufio.NewWriterSize(t, 256<<10)
	if err := f.Write(b); err != nil {
		return err
	}
	if err := b.Flush(); err != nil {
		return err
	}
	return t.Chmod(0o644)
}

// Commit syncs the files, all at once, and then gives them their names, whose paths it
// returns. On an error before that none of the names changes. That the names last a loss of
// power too is [SyncFolder]'s to see to, once for many flights.
func (s *Staged) Commit() (paths []string, err error) {
	defer s.Discard()
	failed := make([]error, len(s.open))
	var wait sync.WaitGroup
	for i, t := range s.open {
		wait.Go(func() {
			if failed[i] = t.Sync(); failed[i] != nil {
				failed[i] = fmt.Errorf("%s: %w", s.name+s.endings[i], failed[i])
			}
		})
	}
	wait.Wait()
	if err := errors.Join(failed...); err != nil {
		return nil, err
	}
	for i, t := range s.open {
		// A file that is open cannot be renamed everywhere.
		if err := t.Close(); err != nil {
			return paths, fmt.Errorf("%s: %w", s.name+s.endings[i], err)
		}
		path := filepath.Join(s.dir, s.name+s.endings[i])
		if err := os.Rename(t.Name(), path); err != nil {
			return paths, fmt.Errorf("%s: %w", s.name+s.endings[i], err)
		}
		paths = append(paths, path)
	}
	s.open = nil
	return paths, nil
}

// Discard removes what has not been given its name.
func (s *Staged) Discard() {
	for _, t := range s.open {
		_ = t.Close()           // closed already after a rename that failed
		_ = os.Remove(t.Name()) // gone after a rename
	}
	s.open = nil
}

// SyncFolder makes the names in a folder last. Systems that cannot sync a folder say so;
// the files themselves are safe then already.
func SyncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	_ = d.Sync()
	return d.Close()
}

package store

import (
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"sync"

	"leadline/internal/prelaunch"
)

// RecoveryLog is the file of lines beside a logbook that says what became of radiosondes
// after their flight. Entries are only added. It is safe for use by several goroutines.
type RecoveryLog struct {
	path string
	mu   sync.Mutex
}

// RecoveryLogOf returns the recovery log that belongs to a logbook; the file need not be
// there yet.
func RecoveryLogOf(logbook string) *RecoveryLog {
	return &RecoveryLog{path: logbook + ".recovery.jsonl"}
}

// Path returns the file's path.
func (l *RecoveryLog) Path() string { return l.path }

// Recoveries returns all entries, oldest first. torn is true where the last line was being
// written when something went wrong; it is left out.
func (l *RecoveryLog) Recoveries() (list []prelaunch.Recovery, torn bool, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.read()
}

func (l *RecoveryLog) read() (list []prelaunch.Recovery, torn bool, err error) {
	file, err := os.Open(l.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, err
	}
	defer file.Close()
	return prelaunch.ReadRecoveries(l.path, file)
}

// AddRecovery adds one line and has it on disk before it returns. A torn line that a crash
// has left goes first, so that it spoils nothing but itself.
func (l *RecoveryLog) AddRecovery(entry prelaunch.Recovery) error {
	if err := entry.Validate(); err != nil {
		return err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	list, torn, err := l.read()
	if err != nil {
		return err
	}
	if torn {
		// The whole lines are written anew under a temporary name.
		return l.rewrite(append(list, entry))
	}
	file, err := os.OpenFile(l.path, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o666)
	if err != nil {
		return err
	}
	return errors.Join(writeRecovery(file, entry), file.Sync(), file.Close())
}

func writeRecovery(w io.Writer, entry prelaunch.Recovery) error {
	line, err := json.Marshal(entry)
	if err != nil {
		return err
	}
	_, err = w.Write(append(line, '\n'))
	return err
}

func (l *RecoveryLog) rewrite(list []prelaunch.Recovery) error {
	temporary := l.path + ".new"
	file, err := os.Create(temporary)
	if err != nil {
		return err
	}
	for _, r := range list {
		err = errors.Join(err, writeRecovery(file, r))
	}
	if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
		return err
	}
	return os.Rename(temporary, l.path)
}

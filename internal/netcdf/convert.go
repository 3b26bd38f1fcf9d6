package netcdf

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// ErrNoConverter marks a netCDF-4 file on a computer without nccopy.
var ErrNoConverter = errors.New("nccopy is not installed")

// ConvertLimits bound what a conversion may cost. Zero fields take the value of
// DefaultConvertLimits.
type ConvertLimits struct {
	Timeout     time.Duration // wall clock and, where prlimit is installed, processor time
	InputBytes  int64         // largest file to convert
	OutputBytes int64         // largest result; compressed input can grow a thousandfold
	MemoryBytes int64         // address space of nccopy; held only where prlimit is installed
	TempDir     string        // parent of the folder made for the conversion; "" is the system's
	Program     string        // path of nccopy; "" looks it up
}

// DefaultConvertLimits is ample for a sounding (own choice, no source).
var DefaultConvertLimits = ConvertLimits{Timeout: 30 * time.Second, InputBytes: 1 << 30, OutputBytes: 1 << 30, MemoryBytes: 2 << 30}

func (l ConvertLimits) complete() ConvertLimits {
	d := DefaultConvertLimits
	if l.Timeout <= 0 {
		l.Timeout = d.Timeout
	}
	if l.InputBytes <= 0 {
		l.InputBytes = d.InputBytes
	}
	if l.OutputBytes <= 0 {
		l.OutputBytes = d.OutputBytes
	}
	if l.MemoryBytes <= 0 {
		l.MemoryBytes = d.MemoryBytes
	}
	return l
}

// Opened is a File that holds a file on disk open. Close it.
type Opened struct {
	*File
	Converted bool // the file was netCDF-4; what is read is a copy by nccopy

	file *os.File
	dir  string
}

// Close closes the file and removes the copy, if there is one.
func (o *Opened) Close() error {
	err := o.file.Close()
	if o.dir != "" {
		err = errors.Join(err, os.RemoveAll(o.dir))
	}
	return err
}

// OpenPath opens the file of that name: a classic one directly, a netCDF-4 one by
// ConvertClassic.
func OpenPath(ctx context.Context, path string, limits ConvertLimits) (*Opened, error) {
	o, err := openFile(path)
	if errors.Is(err, ErrHDF5) {
		return ConvertClassic(ctx, path, limits)
	}
	return o, err
}

func openFile(path string) (*Opened, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	info, err := file.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("%s is not a regular file", path)
	}
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	f, err := Open(file, info.Size())
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", path, err), file.Close())
	}
	return &Opened{File: f, file: file}, nil
}

// ConvertClassic lets nccopy copy a netCDF-4 file to CDF-5 in a folder of its own
// and opens the copy. The program runs as a separate process with few environment
// variables, because damaged HDF5 files can crash the C library; it is killed with
// its children at the time limit, when its output grows too large, and when ctx
// ends. Files with groups or strings of variable length have no classic form; the
// error then carries nccopy's words. Without nccopy the error wraps ErrNoConverter.
func ConvertClassic(ctx context.Context, path string, limits ConvertLimits) (*Opened, error) {
	limits = limits.complete()
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not a regular file", path)
	}
	if info.Size() > limits.InputBytes {
		return nil, fmt.Errorf("%s has %d bytes: at most %d are converted from netCDF-4", path, info.Size(), limits.InputBytes)
	}
	if kind := Sniff(file, info.Size()); kind != HDF5 {
		return nil, fmt.Errorf("%s is a %s file: only netCDF-4 files are converted", path, kind)
	}
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	o, err := convert(ctx, limits, func(to string) error { return os.Symlink(full, to) })
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return o, nil
}

// ConvertClassicReader is ConvertClassic for a file that is not on disk.
func ConvertClassicReader(ctx context.Context, r io.ReaderAt, size int64, limits ConvertLimits) (*Opened, error) {
	limits = limits.complete()
	if size > limits.InputBytes {
		return nil, fmt.Errorf("the file has %d bytes: at most %d are converted from netCDF-4", size, limits.InputBytes)
	}
	if kind := Sniff(r, size); kind != HDF5 {
		return nil, fmt.Errorf("this is a %s file: only netCDF-4 files are converted", kind)
	}
	return convert(ctx, limits, func(to string) error {
		file, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err != nil {
			return err
		}
		_, err = io.Copy(file, io.NewSectionReader(r, 0, size))
		return errors.Join(err, file.Close())
	})
}

// convert runs nccopy on the file that supply puts in place. The fixed names keep
// those of the user from being taken for options or addresses of the network.
func convert(ctx context.Context, limits ConvertLimits, supply func(to string) error) (_ *Opened, err error) {
	program := limits.Program
	if program == "" {
		program = "nccopy"
	}
	program, err = exec.LookPath(program)
	if err != nil {
		return nil, fmt.Errorf("%w, which netCDF-4 files need: install the Debian package netcdf-bin, or convert the file elsewhere with nccopy -k cdf5", ErrNoConverter)
	}
	if program, err = filepath.Abs(program); err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp(limits.TempDir, "netcdf4-")
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(dir))
		}
	}()
	in, out := filepath.Join(dir, "in.nc"), filepath.Join(dir, "out.nc")
	if err := supply(in); err != nil {
		return nil, err
	}
	if err := runConverter(ctx, limits, program, dir, in, out); err != nil {
		return nil, err
	}
	o, err := openFile(out)
	if err != nil {
		return nil, fmt.Errorf("nccopy left no readable file: %w", err)
	}
	o.Converted, o.dir = true, dir
	return o, nil
}

const (
	watchInterval = 20 * time.Millisecond
	messageBytes  = 4096
	marginBytes   = 64 << 10 // the system's limit lies a little higher, so that an overrun shows in the size
)

var (
	errTimeLimit   = errors.New("time limit")
	errOutputLimit = errors.New("output limit")
)

func runConverter(ctx context.Context, limits ConvertLimits, program, dir, in, out string) error {
	run, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	timer := time.AfterFunc(limits.Timeout, func() { stop(errTimeLimit) })
	defer timer.Stop()

	command := []string{program, "-k", "cdf5", in, out}
	if limiter, err := exec.LookPath("prlimit"); err == nil {
		seconds := int64(limits.Timeout/time.Second) + 1
		command = append([]string{
			limiter,
			"--as=" + strconv.FormatInt(limits.MemoryBytes, 10),
			"--cpu=" + strconv.FormatInt(seconds, 10),
			"--fsize=" + strconv.FormatInt(limits.OutputBytes+marginBytes, 10),
			"--core=0", "--nofile=64",
		}, command...)
	}
	cmd := exec.CommandContext(run, command[0], command[1:]...)
	cmd.Dir = dir
	// HOME and the plugin path point at the empty folder: no start-up file and no
	// filter library of the user is loaded.
	cmd.Env = []string{"PATH=/usr/bin:/bin", "HOME=" + dir, "TMPDIR=" + dir, "LC_ALL=C", "HDF5_PLUGIN_PATH=" + dir}
	message := &firstBytes{limit: messageBytes}
	cmd.Stdout, cmd.Stderr = message, message
	cmd.WaitDelay = time.Second
	ownGroup(cmd)
	if err := cmd.Start(); err != nil {
		return fmt.Errorf("nccopy could not be started: %w", err)
	}
	watched := make(chan struct{})
	go func() {
		defer close(watched)
		tick := time.NewTicker(watchInterval)
		defer tick.Stop()
		for {
			select {
			case <-run.Done():
				return
			case <-tick.C:
				if info, err := os.Stat(out); err == nil && info.Size() > limits.OutputBytes {
					stop(errOutputLimit)
				}
			}
		}
	}()
	err := cmd.Wait()
	cause := context.Cause(run)
	stop(nil)
	<-watched

	if info, statErr := os.Stat(out); statErr == nil && info.Size() > limits.OutputBytes {
		cause = errOutputLimit
	}
	switch {
	case errors.Is(cause, errTimeLimit):
		return fmt.Errorf("nccopy was stopped after %s: convert the file by hand with nccopy -k cdf5: %w", limits.Timeout, context.DeadlineExceeded)
	case errors.Is(cause, errOutputLimit) || err != nil && endedByFileSize(cmd.ProcessState):
		return fmt.Errorf("nccopy was stopped because the converted file grew beyond %d bytes", limits.OutputBytes)
	case cause != nil:
		return fmt.Errorf("conversion by nccopy was broken off: %w", cause)
	case err != nil:
		text := strings.Join(strings.Fields(strings.ReplaceAll(message.String(), dir+string(filepath.Separator), "")), " ")
		if text == "" {
			text = "no message"
		}
		hint := "groups and strings of variable length have no classic form"
		if strings.Contains(text, "HDF error") {
			hint = "the file may be cut off or damaged: compare its size with the original or fetch it again"
		}
		return fmt.Errorf("nccopy could not convert the file (%w): %s; %s", err, text, hint)
	}
	return nil
}

// firstBytes keeps the beginning of what is written to it.
type firstBytes struct {
	strings.Builder
	limit int
}

func (b *firstBytes) Write(p []byte) (int, error) {
	b.Builder.Write(p[:min(len(p), max(b.limit-b.Len(), 0))])
	return len(p), nil
}

package workbench

import (
	"context"
	"runtime"
	"sync"
)

// EachFlight does work for many flights side by side and hands the results on in the
// order of ids. workers is how many flights are worked on at once; below 1 it is the
// number of processors. done is called from one goroutine at a time, once for every
// flight that was worked on; an error of one flight goes to done and stops nothing. An
// error that done returns, or the end of ctx, stops the rest and is returned once every
// flight begun has come back.
//
// No more than a few results a worker wait to be handed on, so that memory does not grow
// with the number of flights as long as done keeps none.
func EachFlight[T any](ctx context.Context, ids []string, workers int, work func(ctx context.Context, id string) (T, error), done func(i int, id string, result T, err error) error) error {
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	workers = min(workers, len(ids))
	if workers == 0 {
		return ctx.Err()
	}
	type outcome struct {
		result T
		err    error
	}
	type task struct {
		i    int
		back chan outcome // holds one
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	const ahead = 2
	open := make(chan struct{}, (1+ahead)*workers)
	next, begun := make(chan task), make(chan task, cap(open))
	var running sync.WaitGroup
	for range workers {
		running.Go(func() {
			for t := range next {
				r, err := work(ctx, ids[t.i])
				t.back <- outcome{r, err}
			}
		})
	}
	go func() {
		defer close(begun)
		defer close(next)
		for i := range ids {
			t := task{i, make(chan outcome, 1)}
			select {
			case open <- struct{}{}:
			case <-ctx.Done():
				return
			}
			select {
			case next <- t:
				begun <- t
			case <-ctx.Done():
				return
			}
		}
	}()
	for t := range begun {
		o := <-t.back
		<-open
		if ctx.Err() != nil {
			continue // what was begun is waited for and not handed on
		}
		if err := done(t.i, ids[t.i], o.result, o.err); err != nil {
			stop(err)
		}
	}
	running.Wait()
	return context.Cause(ctx)
}

// Package api serves the screens and the JSON they are made from over HTTP. It holds no
// state of its own: every answer comes from a workbench.Bench, the same way in that the
// command line uses.
//
// New makes the handler, Listen the socket (loopback unless a token is given), Serve
// joins them with timeouts. Structs with JSON tags here and below are the wire format;
// `go generate` writes their TypeScript twins into web/src/api/types.ts and a test fails
// where they differ.
//
// The profile itself travels as columns (docs: Columns), everything else as JSON. An
// error is {"error": "one sentence"} with the status that fits.
package api

//go:generate go test -count=1 -run ^TestTypes$ -write .

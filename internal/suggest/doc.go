// Package suggest looks at the residuals of all checks of a flight together and names
// the one simple error that explains them (complex quality control, Gandin 1988): a
// figure mistyped, a wrong unit, a sign, a wrong station height, an offset of one
// sensor, one bad element over a span. Each hypothesis is a Suggestion: a ready
// decision with its evidence, which a person may take or leave. The package reads an
// outcome, may run the path again to see what a decision would do, and changes nothing.
package suggest

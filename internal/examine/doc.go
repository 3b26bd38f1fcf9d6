// Package examine measures the skill of the whole path against simulated flights whose
// truth is known: how often faults are found and how tightly, how often clean flights
// are called faulty, how large the errors are before and after, and whether the stated
// uncertainty holds what it promises.
//
// Flights used for tuning and flights used for reporting never share a seed: seeds are
// made from the purpose, so that the report cannot be tuned on.
package examine

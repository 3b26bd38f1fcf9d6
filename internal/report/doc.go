// Package report makes one page of a flight for people: what happened, what is believed
// and why, in words, charts and tables. The page is one HTML text with its pictures inside;
// it needs no network, runs no script, and prints on A4.
package report

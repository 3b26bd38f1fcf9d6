package workbench

import (
	"bytes"
	"context"
	"errors"
	"fmt"

	"leadline/internal/ingest"
	"leadline/internal/sounding"
)

// read reads every flight of a file and returns them with the recipe that was used. With
// no recipe given the source says by its content which shipped one fits; where none
// does, one is guessed, and a finding says so and what is unsure.
func read(f File, recipe File, o ingest.Options) ([]*sounding.Raw, Blob, error) {
	ctx := context.Background()
	if len(recipe.Bytes) > 0 {
		r, err := ingest.ReadRecipe(recipe.Name, recipe.Bytes)
		if err != nil {
			return nil, Blob{}, err
		}
		raws, err := ingest.ReadAll(ctx, f.Name, bytes.NewReader(f.Bytes), r, o)
		return raws, blob(recipe), err
	}
	if name, ok := ingest.Detect(f.Bytes); ok {
		r, text, err := ingest.ShippedRecipe(name)
		if err != nil {
			return nil, Blob{}, err
		}
		raws, err := ingest.ReadAll(ctx, f.Name, bytes.NewReader(f.Bytes), r, o)
		return raws, blob(File{Name: name + ".toml", Bytes: text}), err
	}
	r, doubts, text, err := ingest.Guess(f.Bytes[:min(len(f.Bytes), 256<<10)], f.Name)
	if err != nil {
		return nil, Blob{}, fmt.Errorf("%s: no recipe was given and none can be guessed: %w", f.Name, err)
	}
	raws, err := ingest.ReadAll(ctx, f.Name, bytes.NewReader(f.Bytes), r, o)
	if err != nil {
		return nil, Blob{}, fmt.Errorf("%w (by a guessed recipe: leadline recipe shows it)", err)
	}
	if len(raws) == 0 {
		return nil, Blob{}, errors.New("no flight in it")
	}
	for _, raw := range raws {
		raw.Findings = append(raw.Findings, guessed(doubts)...)
	}
	return raws, blob(File{Name: "guessed.toml", Bytes: []byte(text)}), nil
}

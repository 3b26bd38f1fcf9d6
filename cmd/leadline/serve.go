package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/api"
)

func (p *program) serveCmd() *cobra.Command {
	var listen, token string
	c := &cobra.Command{
		Use:   "serve",
		Short: "show the logbook and its flights in a browser on this machine",
		Long: `serve opens the logbook on a page of this machine's own address. It listens on loopback only;
another address needs --token, which the page then asks for.`,
		Example: `  leadline serve
  leadline serve --logbook campaign.db --listen 127.0.0.1:9000`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			listener, err := api.Listen(listen, token)
			if err != nil {
				return err
			}
			server := api.Server(bench, api.Options{Token: token, Address: listener.Addr().String()})
			fmt.Fprintf(p.out, "open http://%s/ in a browser; Ctrl-C ends\n", listener.Addr())
			done := make(chan error, 1)
			go func() { done <- server.Serve(listener) }()
			select {
			case err = <-done:
			case <-cmd.Context().Done():
				ctx, cancel := context.WithTimeout(context.Background(), 3*time.Second)
				defer cancel()
				err = server.Shutdown(ctx)
			}
			if errors.Is(err, http.ErrServerClosed) || errors.Is(err, context.DeadlineExceeded) {
				return nil
			}
			return err
		},
	}
	c.Flags().StringVar(&listen, "listen", "127.0.0.1:8470", "address and port")
	c.Flags().StringVar(&token, "token", "", "word that a browser elsewhere must give")
	return c
}

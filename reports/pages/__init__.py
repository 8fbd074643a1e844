"""Pages: one self-contained HTML file each, without script and without network, for screen, phone and paper."""

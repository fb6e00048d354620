"""Steel by its law, strand, tubes, plates, load cells, rosettes."""

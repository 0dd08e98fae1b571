"""What `import barfem` adds to the commands' own functions: cars and received bars by their files and holes' names."""

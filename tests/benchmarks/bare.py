"""The smallest window to compare with: one canvas, one line of text, nothing else.

Run as a program: ``python bare.py 1024x600``; it stays until it is ended.
"""

import sys
import tkinter as tk

root = tk.Tk()
root.geometry(sys.argv[1])
canvas = tk.Canvas(root, background="#ffffff", highlightthickness=0)
canvas.place(relwidth=1, relheight=1)
canvas.create_text(200, 100, text="a bare window", font=("", 30), fill="#000000")
root.mainloop()

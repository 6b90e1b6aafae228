"""Circuits as data, solved: what the voltages should be, and which fault the readings point to.

What a session calls:

    file = files.load_archetype(name)                       or files.load_circuit(path); files.nearest(facts, circuits)
    book = dictionary.build_dictionary(file.circuit)        once for a job; about a second for the largest circuit
    book.chart()                                            {test point: (volts, standard deviation)} when sound
    found = rank.rank(book, {"v1a.plate": 288.0}, priors=)  found.candidates, found.stages (log-likelihood by stage)
    book.chart(found.candidates[0].row)                     what the leading fault predicts
    advise.next_points(book, found, measured)               what to measure next, in bits
    classes.fault_class(book, row)                          faults that read the same, and the checks that part them
"""

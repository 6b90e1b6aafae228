"""Circuits as data, solved: what the voltages should be, and which fault the readings point to.

What a session calls:

    file = collection.Circuits(root, layers).find(name)     or files.load_circuit(path); .nearest(amp facts)
    dictionary.sound_chart(file.circuit)                    {test point: (volts, standard deviation)} when healthy
    book = kept.dictionary(file.circuit)                    from the disk; about a second when it must be solved first
    found = rank.rank(book, {"v1a.plate": 288.0}, priors=)  found.candidates, found.best
    evidence.weigh(found)                                   the stages that are off, and factors for every fault
    book.chart(found.candidates[0].row)                     what the leading fault predicts
    advise.next_points(book, found, measured)               what to measure next, in bits
    classes.fault_class(book, row)                          faults that read the same, and the checks that separate them
"""

"""Open postman's walks by networkx (Debian's python3-networkx): reads graphs as
lists of {A, B, Length}, prints for each the least length to walk twice when the
walk may start and end anywhere: two more nodes, at no distance from all odd ones
but far from each other, take up its ends."""
import json, sys
import networkx as nx

out = []
for links in json.load(sys.stdin):
    g = nx.Graph()
    degree = {}
    for l in links:
        a, b, w = l["A"], l["B"], l["Length"]
        degree[a] = degree.get(a, 0) + 1
        degree[b] = degree.get(b, 0) + 1
        if not g.has_edge(a, b) or g[a][b]["weight"] > w:
            g.add_edge(a, b, weight=w)
    odd = [n for n, d in degree.items() if d % 2]
    if len(odd) <= 2:
        out.append(0.0)
        continue
    far = dict(nx.all_pairs_dijkstra_path_length(g))
    big = 1e7
    m = nx.Graph()
    for i, a in enumerate(odd):
        for b in odd[:i]:
            m.add_edge(a, b, weight=big - far[a][b])
        m.add_edge(a, "start", weight=big)
        m.add_edge(a, "end", weight=big)
    match = nx.max_weight_matching(m, maxcardinality=True)
    out.append(sum(big - m[a][b]["weight"] for a, b in match))
json.dump(out, sys.stdout)
